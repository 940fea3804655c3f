-- What people of the studio are told: each thing once, by itself, with others within minutes, or when work begins.
create table notices (
  n          integer primary key,
  key        text not null,                -- what is told, such as bell/C0001/12
  listener   text not null,                -- member:M2, another person, front desk; empty: whoever looks at the notice board
  event      text not null,                -- of the table of who hears what
  commission text not null default '',
  text       text not null,
  buttons    text not null default '',     -- JSON
  at         text not null,
  due_at     text not null,
  waits      integer not null,             -- 1: for the beginning of work; told with nothing before that
  said_at    text not null default '',
  said_in    text not null default '',     -- key of the post
  unique (key, listener)
) strict;
create index notices_unsaid on notices (due_at) where said_at = '';

alter table outbox add column hold_until text not null default '';   -- until then nothing is sent, and nothing waits for it
