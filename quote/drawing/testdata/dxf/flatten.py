# The lines of a DXF file as another reader sees them: python3-ezdxf explodes blocks and bulges, resolves extrusions and
# evaluates splines; curves are flattened to 0.004 mm by its own methods. Prints JSON: a list of {layer, closed, points}.
import json, sys
import ezdxf

out = []


def add(layer, points, closed=False):
    out.append({"layer": layer, "closed": closed, "points": [(p.x, p.y) for p in points]})


def walk(e, layer):
    own = e.dxf.layer if e.dxf.layer != "0" else layer
    kind = e.dxftype()
    if kind == "INSERT":
        for one in e.multi_insert() if e.mcount > 1 else [e]:
            for inner in one.virtual_entities():
                walk(inner, own)
    elif kind == "LINE":
        add(own, [e.dxf.start, e.dxf.end])
    elif kind in ("ARC", "CIRCLE"):
        add(own, e.flattening(0.004))
    elif kind == "ELLIPSE":
        add(own, e.flattening(0.004, 16))
    elif kind == "SPLINE" and len(e.control_points):  # a curve through points only is not defined by the format
        add(own, e.flattening(0.004, 16))
    elif kind in ("LWPOLYLINE", "POLYLINE"):
        for inner in e.virtual_entities():
            walk(inner, own)


for e in ezdxf.readfile(sys.argv[1]).modelspace():
    walk(e, "0")
json.dump(out, sys.stdout)
