-- What a transport remembers of its service: which message carries which key, which thread is whose.
create table marks (
  key   text primary key,
  value text not null
) strict;
