-- A link of its own kind shows a calendar: a member's, or that of a commission to its client, until it is ended. It signs nobody in.
create table links_anew (
  n          integer primary key,
  kind       text not null check (kind in ('member','client','code','calendar')),
  sha256     text not null unique,
  member     text references members (id),
  commission text references commissions (id),
  made_at    text not null,
  made_by    text not null,
  expires_at text not null default '',
  used_at    text not null default '',
  ended_at   text not null default '',
  check (case kind when 'calendar' then (member is null) <> (commission is null)
    else (member is null) = (kind = 'client') and (commission is null) = (kind <> 'client') end)
) strict;
insert into links_anew select n, kind, sha256, member, commission, made_at, made_by, expires_at, used_at, ended_at from links;
drop table links;
alter table links_anew rename to links;
create index links_member on links (member);
create index links_commission on links (commission);

-- How each event was last told in somebody's calendar, so that one that changed is told as the same one, changed.
create table calendar_events (
  whose      text not null,               -- M1 or C0007
  key        text not null,               -- what it is the event of
  uid        text not null unique,
  sha256     text not null,               -- of the facts
  facts      text not null,               -- JSON, as told
  off        integer not null,            -- 1: told as cancelled
  sequence   integer not null,            -- how often it has changed
  made_at    text not null,
  changed_at text not null,
  ends_at    text not null,
  primary key (whose, key)
) strict;
