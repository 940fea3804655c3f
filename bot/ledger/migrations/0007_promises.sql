-- Every date a client was told, in order. The last one of a commission stands, unless it is void.
create table promises (
  commission text not null references commissions (id),
  n          integer not null,                -- 1-based
  date       text not null,                   -- 2026-12-18
  odds       real not null,                   -- share of the simulated runs that kept it when it was told; -1: not known
  revision   integer not null,                -- of the quote that it belongs to
  held_until text not null default '',        -- of one offered: until then approving keeps the date; empty: no longer, or for good
  told_at    text not null,
  told_by    text not null default '',        -- empty: by the quote itself
  message    text not null,                   -- key of the post that told it
  state      text not null check (state in ('offered','given','kept','missed','void')),
  ended_at   text not null default '',
  primary key (commission, n)
) strict;

-- Dates told before promises were kept apart.
insert into promises (commission, n, date, odds, revision, told_at, message, state)
  select id, 1, promise, -1, revision, changed_at, id || '/quote/' || revision,
    case state when 'quoted' then 'offered' when 'approved' then 'given' when 'working' then 'given' else 'void' end
  from commissions where promise <> '';

alter table outlooks add column odds real not null default -1;    -- share of the simulated runs that keep the promise
