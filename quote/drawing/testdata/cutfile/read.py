# A cut file as another reader sees it (python3-ezdxf): prints JSON with what the test compares.
import json, sys
import ezdxf

doc = ezdxf.readfile(sys.argv[1])
audit = doc.audit()
lines, texts = [], []
for e in doc.modelspace():
    kind, layer = e.dxftype(), e.dxf.layer
    if kind == "POLYLINE":
        lines.append({"layer": layer, "closed": e.is_closed, "points": [(v.dxf.location.x, v.dxf.location.y) for v in e.vertices]})
    elif kind == "CIRCLE":
        lines.append({"layer": layer, "centre": (e.dxf.center.x, e.dxf.center.y), "radius": e.dxf.radius})
    elif kind == "TEXT":
        align, at, _ = e.get_pos()
        texts.append({"value": e.plain_text(), "align": align, "at": (at.x, at.y), "size": e.dxf.height, "turn": e.dxf.rotation})
json.dump({
    "version": doc.dxfversion,
    "errors": [f"{x.code}: {x.message}" for x in audit.errors + audit.fixes],
    "units": doc.header.get("$INSUNITS", 0),
    "layers": [layer.dxf.name for layer in doc.layers],
    "lines": lines,
    "texts": texts,
}, sys.stdout)
