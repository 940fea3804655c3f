-- Time that makers are not at work, as told by the studio.
create table away (
  n       integer primary key,
  maker   text not null,             -- a maker of the studio's settings
  from_at text not null,
  to_at   text not null,             -- the end of the last day, or when the maker was back
  told_at text not null,
  told_by text not null
) strict;
