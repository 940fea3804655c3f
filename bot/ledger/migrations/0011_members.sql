-- The people of the studio, how they sign in, and clients' private links. Of what lets somebody in, only the SHA-256 is kept.
create table members (
  id         text primary key,            -- M1
  name       text not null,
  owner      integer not null,            -- the roles
  maker      integer not null,
  front_desk integer not null,
  bench      text not null default '',    -- the maker of the settings who they are in the plan
  added_at   text not null,
  added_by   text not null,
  let_go_at  text not null default ''
) strict;

-- Who a member is at each door.
create table identities (
  person text primary key,                -- browser:M1, discord:1234
  member text not null references members (id),
  at     text not null,
  by     text not null
) strict;
create index identities_member on identities (member);

-- A link signs a member in once, or opens one commission to its client until it is ended, or is a code that makes a person
-- of another door known as a member.
create table links (
  n          integer primary key,
  kind       text not null check (kind in ('member','client','code')),
  sha256     text not null unique,
  member     text references members (id),
  commission text references commissions (id),
  made_at    text not null,
  made_by    text not null,
  expires_at text not null default '',
  used_at    text not null default '',
  ended_at   text not null default '',
  check ((member is null) = (kind = 'client') and (commission is null) = (kind <> 'client'))
) strict;
create index links_member on links (member);
create index links_commission on links (commission);

create table sessions (
  n          integer primary key,
  sha256     text not null unique,
  member     text references members (id),
  commission text references commissions (id),
  device     text not null,
  made_at    text not null,
  seen_at    text not null,
  ended_at   text not null default '',
  check ((member is null) <> (commission is null))
) strict;
create index sessions_member on sessions (member);
create index sessions_commission on sessions (commission);

-- Whoever did something, as they were called then.
alter table events add column name text not null default '';
