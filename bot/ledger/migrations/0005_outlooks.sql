-- The shop's plan: what the bench has done is looked at once for its effect on the promises; what was last said of each.
alter table operations add column looked integer not null default 0;   -- 1: its effect was looked at
update operations set looked = 1 where state = 'done';

alter table bells add column warned_at text not null default '';       -- that the recoat window closes soon

create table outlooks (
  commission text primary key references commissions (id),
  promise    text not null,                    -- date
  sure       text not null,                    -- date
  danger     integer not null,                 -- 1: the sure date is later than the promise
  note       text not null default '',         -- key of the notice that says so
  at         text not null
) strict;
