-- Times are RFC 3339 in UTC with milliseconds, so that text order is time order.
create table counters (
  name  text primary key,
  value integer not null
) strict;

create table commissions (
  id             text primary key,            -- C0001
  client         text not null,               -- person, "browser:mara"
  client_name    text not null,
  scheme         text not null,               -- transport the thread lives on
  thread         text not null default '',    -- empty until the transport has opened it
  state          text not null check (state in ('choosing','measuring','checking','computing','quoted','approved',
                   'working','ready','delivered','declined','cancelled','expired','failed')),
  finish         text not null default '',
  wanted         text not null default '',    -- 2027-03-01
  wanted_typed   text not null default '',
  clothing_mm    real not null default 0,
  clothing_typed text not null default '',
  notes          text not null default '',
  apart          integer not null default 0,  -- left and right measured apart
  change_typed   text not null default '',    -- JSON of a change form that was not understood whole
  revision       integer not null default 0,  -- the latest
  promise        text not null default '',    -- date promised
  opened_at      text not null,
  changed_at     text not null,
  deposit_at     text not null default '',
  deposit_by     text not null default ''
) strict;

create table items (
  commission text not null references commissions (id),
  line       integer not null,
  set_name   text not null,
  count      integer not null check (count >= 1),
  sides      text not null default '',
  primary key (commission, set_name)
) strict;

create table measurements (
  commission text not null references commissions (id),
  key        text not null,
  side       text not null default '',
  typed      text not null,
  mm         real,                            -- null where what was typed was not understood
  problem    text not null default '',
  primary key (commission, key, side)
) strict;

create table pictures (
  commission text not null references commissions (id),
  n          integer not null,
  name       text not null,
  mime       text not null,
  sha256     text not null,
  sent_by    text not null,
  at         text not null,
  data       blob not null,
  primary key (commission, n),
  unique (commission, sha256)
) strict;

create table revisions (
  commission text not null references commissions (id),
  revision   integer not null,
  state      text not null check (state in ('computing','failed','quoted','approved','replaced','declined','expired','dropped')),
  asked_at   text not null,
  change     text not null default '',        -- what the client asked to change
  snapshot   text not null,                   -- JSON, all that the quote depends on
  quote      text not null default '',        -- JSON without PDF and pictures
  pdf        blob,
  sha256     text not null default '',        -- of pdf, hex
  issued_at  text not null default '',
  expires_at text not null default '',
  primary key (commission, revision)
) strict;

create table revision_files (
  commission text not null,
  revision   integer not null,
  n          integer not null,
  name       text not null,
  mime       text not null,
  alt        text not null,
  data       blob not null,
  primary key (commission, revision, n),
  foreign key (commission, revision) references revisions (commission, revision)
) strict;

create table approvals (
  commission   text primary key references commissions (id),  -- one for ever
  revision     integer not null,
  person       text not null,
  person_name  text not null,
  on_behalf_of text not null default '',
  at           text not null,
  sha256       text not null,
  foreign key (commission, revision) references revisions (commission, revision)
) strict;

create table requests (
  id         text primary key,                -- C0001-r1-1
  commission text not null references commissions (id),
  revision   integer not null,
  attempt    integer not null,
  deadline   text not null,
  state      text not null check (state in ('open','done','failed','dropped')),
  stage      text not null default '',
  share      real not null default 0,
  asked_at   text not null,
  settled_at text not null default '',
  settled_by integer not null default 0,      -- the attempt whose answer was taken
  cause      text not null default ''
) strict;
create index requests_open on requests (state, deadline);

-- One row per key; putting a key again raises its version. A row is pending while sent < version.
create table outbox (
  kind       text not null check (kind in ('thread','post','request')),
  key        text not null,
  n          integer not null unique,         -- order of sending
  lane       text not null,                   -- rows of a lane are sent in order
  commission text not null default '',        -- whose thread a post without one goes to
  payload    blob not null,
  version    integer not null default 1,
  sent       integer not null default 0,
  due_at     text not null default '',
  tries      integer not null default 0,
  problem    text not null default '',
  made_at    text not null,
  sent_at    text not null default '',
  primary key (kind, key)
) strict;

create table operations (
  commission  text not null references commissions (id),
  seq         integer not null,               -- 1-based, in planned order
  op          text not null,
  title       text not null,
  grp         text not null,
  kind        text not null,
  start_at    text not null,                  -- as planned
  end_at      text not null,
  resources   text not null,                  -- JSON list
  spans       text not null,                  -- JSON
  after       text not null,                  -- JSON list of op
  cure        text not null default '',       -- material
  cure_ms     integer not null default 0,
  window_ms   integer not null default 0,     -- from done to the end of the recoat window; 0: no end
  state       text not null check (state in ('planned','running','done')),
  started_at  text not null default '',
  started_by  text not null default '',
  done_at     text not null default '',
  done_by     text not null default '',
  primary key (commission, seq),
  unique (commission, op)
) strict;

create table bells (
  id         text primary key,                -- C0001/12
  commission text not null,
  seq        integer not null,
  due_at     text not null,
  latest_at  text not null default '',
  rung_at    text not null default '',
  foreign key (commission, seq) references operations (commission, seq)
) strict;

create table events (
  n          integer primary key autoincrement,
  at         text not null,
  commission text not null default '',
  person     text not null default '',
  on_behalf  text not null default '',
  what       text not null,
  detail     text not null default ''
) strict;
create trigger events_stay before update on events begin select raise(abort, 'events are never changed'); end;
create trigger events_keep before delete on events begin select raise(abort, 'events are never deleted'); end;

create table acts (
  id     text primary key,
  person text not null,
  at     text not null,
  reply  text not null                        -- JSON of what was answered, pictures left out
) strict;

create table boards (
  scheme text primary key,
  thread text not null
) strict;

create table page_threads (
  id        text primary key,
  key       text not null unique,
  title     text not null,
  person    text not null,
  opened_at text not null,
  last_at   text not null
) strict;

create table page_posts (
  key       text primary key,
  n         integer not null unique,          -- order of arrival
  thread    text not null references page_threads (id),
  post      text not null,                    -- JSON without files
  by        text not null,
  at        text not null,
  edited_at text not null default ''
) strict;
create index page_posts_thread on page_posts (thread, at, n);

create table page_files (
  key  text not null references page_posts (key),
  n    integer not null,                      -- from 0
  name text not null,
  mime text not null,
  alt  text not null,
  data blob not null,
  primary key (key, n)
) strict;

create table secrets (
  name  text primary key,
  value blob not null
) strict;
