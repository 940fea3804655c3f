-- Pattern sets that the studio brought itself. A version is never changed; the latest shelved one of a name is offered.
create table patterns (
  name      text not null,
  version   integer not null,              -- 1-based
  drawing   blob not null,                 -- SVG or DXF
  sidecar   text not null,                 -- TOML
  sha256    text not null,                 -- of drawing, a zero byte and sidecar
  card      blob not null,                 -- PNG for choosing it
  sent_by   text not null,
  sent_at   text not null,
  state     text not null check (state in ('checked','shelved','withdrawn')),
  primary key (name, version),
  unique (name, sha256)
) strict;

alter table commissions add column allowance_mm real not null default 0;
alter table commissions add column allowance_typed text not null default '';
alter table measurements add column deviation_mm real not null default 0;   -- of an estimate; 0: taken
