-- Foam left over and kept. A row is never removed: what leaves the rack was used on a cutting day or thrown away.
create table rack (
  id           text primary key,            -- R0001
  thickness_mm real not null,
  outline      text not null,               -- JSON ring in mm, counter-clockwise, its box beginning at 0, 0
  width_mm     real not null,               -- of the box
  height_mm    real not null,
  origin       text not null default '',    -- D0001/2 or C0007/3: cutting day or commission, and its sheet; empty: typed by hand
  state        text not null check (state in ('racked','used','thrown')),
  used_in      text not null default '',    -- D0002
  at           text not null,               -- of the last change
  by           text not null
) strict;
create unique index rack_origin on rack (origin) where origin <> '';  -- what remains of a sheet is racked once

-- Plans for cutting several commissions together; a plan that was carried out is a cutting day.
create table cuttings (
  id          text primary key,             -- D0001
  commissions text not null,                -- JSON list of id and revision
  used        text not null,                -- JSON list of offcuts taken from the rack
  rests       text not null,                -- JSON list of offcuts that remain
  summary     text not null,
  sha256      text not null,                -- of summary and files: what the same plan has in common
  state       text not null check (state in ('planned','cut')),
  at          text not null,
  by          text not null
) strict;

create table cutting_files (
  cutting text not null references cuttings (id),
  n       integer not null,
  name    text not null,
  mime    text not null,
  alt     text not null,
  data    blob not null,
  primary key (cutting, n)
) strict;

-- Nothing is cut twice.
create table cut_commissions (
  commission text primary key references commissions (id),
  cutting    text not null references cuttings (id)
) strict;
