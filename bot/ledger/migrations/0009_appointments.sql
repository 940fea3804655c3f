-- Appointments with clients: fittings, and handing over. What was missed or called off stays; at most one of each kind stands.
create table appointments (
  commission text not null references commissions (id),
  n          integer not null,                -- 1-based, of the commission
  which      text not null check (which in ('first fitting','final fitting','handing over')),
  how        text not null check (how in ('in person','pictures','collect','ship')),
  state      text not null check (state in ('wanted','offered','picked','kept','missed','void')),
  slots      text not null default '[]',      -- JSON list of the times offered last
  slot_at    text not null default '',        -- picked
  picked_by  text not null default '',
  made_at    text not null,
  told_at    text not null default '',        -- when the post last said something new of it
  message    text not null default '',        -- key of the post that tells the client; empty: none yet
  warned_at  text not null default '',        -- the time that the studio was last told it would be instead
  looked     integer not null default 0,      -- 1: it was looked at again shortly before it
  ended_at   text not null default '',
  primary key (commission, n)
) strict;
alter table commissions add column fittings text not null default '';   -- 'in person' or 'pictures', as the client chose; empty: as the studio does
create unique index appointments_standing on appointments (commission, which) where state in ('wanted','offered','picked');
