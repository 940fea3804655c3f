-- The hours that work really takes, spell by spell, and work that is put down or goes back to be done again.
create table spells (
  commission   text not null,
  seq          integer not null,
  n            integer not null,              -- 1-based, of the operation
  round        integer not null default 1,    -- 2 and on: of work that went back
  person       text not null,                 -- who worked
  from_at      text not null default '',      -- empty: done without having been started
  until_at     text not null default '',      -- empty: in hand
  minutes      integer not null default 0,    -- that it really took, as typed; 0: nobody typed any
  corrected_at text not null default '',
  corrected_by text not null default '',
  primary key (commission, seq, n),
  foreign key (commission, seq) references operations (commission, seq)
) strict;
insert into spells (commission, seq, n, person, from_at, until_at)
  select commission, seq, 1, case started_by when '' then done_by else started_by end, started_at, done_at from operations where state <> 'planned';

alter table operations add column paused_at text not null default '';      -- put down since; empty: not
alter table operations add column rested_ms integer not null default 0;    -- of opening hours at pause before that, while it is in hand
alter table operations add column round integer not null default 1;        -- how often it is done, counting this time
alter table operations add column share real not null default 1;           -- of its pieces that are done this time
alter table operations add column why text not null default '';            -- it is done again
alter table operations add column added text not null default '';          -- JSON of the work, where it is not in the quote
alter table operations add column slower_ms integer not null default 0;    -- that what it put on dries longer than planned

-- What the air at the bench was, as typed or sent by a sensor.
create table airs (
  n        integer primary key,
  at       text not null,
  celsius  real not null,
  humidity real not null,                 -- relative, percent
  person   text not null                  -- who said so
) strict;
create index airs_at on airs (at);
