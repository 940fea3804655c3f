-- Orders are found and sorted without reading all there ever were.
create index events_of on events (commission, n);
alter table commissions add column state_at text not null default '';   -- when it came into its state
update commissions set state_at = coalesce((select max(at) from events e where e.commission = commissions.id
  and e.what = case state when 'quoted' then 'quoted' when 'approved' then 'approved' when 'ready' then 'finished' when 'delivered' then 'handed over' end), changed_at);
create trigger commissions_begun after insert on commissions when new.state_at = '' begin
  update commissions set state_at = new.opened_at where id = new.id;
end;
create trigger commissions_moved after update of state on commissions when new.state <> old.state begin
  update commissions set state_at = new.changed_at where id = new.id;
end;

-- As outlooks has it.
alter table commissions add column danger integer not null default 0;
update commissions set danger = 1 where exists (select 1 from outlooks o where o.commission = commissions.id and o.danger = 1);
create trigger outlooks_begun after insert on outlooks begin
  update commissions set danger = new.danger where id = new.commission;
end;
create trigger outlooks_moved after update of danger on outlooks when new.danger <> old.danger begin
  update commissions set danger = new.danger where id = new.commission;
end;

-- 0: the date that was promised is in danger; 1: somebody has something to do; 2: past.
alter table commissions add column rank integer generated always as (case
  when state in ('delivered','declined','cancelled','expired') then 2 when danger = 1 and state in ('approved','working') then 0 else 1 end) virtual;
-- The date promised; what has none comes last.
alter table commissions add column due text generated always as (case promise when '' then '~' else promise end) virtual;
create index commissions_rank on commissions (rank, due);
create index commissions_due on commissions (due);
create index commissions_since on commissions (state_at);
create index commissions_name on commissions (client_name collate nocase);
create index commissions_client on commissions (client);
create index commissions_thread on commissions (thread);
create index commissions_state on commissions (state);
create index commissions_state_due on commissions (state, due);
create index commissions_state_since on commissions (state, state_at);
create index commissions_state_name on commissions (state, client_name collate nocase);
create index items_set on items (set_name, commission);
-- Of whom the plan has work left: what is done is not among it.
create index operations_left on operations (commission, seq, resources) where state <> 'done';

-- What clients wrote, sent and wished, until somebody of the studio has answered it.
create table messages (
  n           integer primary key,
  commission  text not null references commissions (id),
  kind        text not null check (kind in ('words','pictures','change')),
  person      text not null,
  name        text not null,              -- as they were called then
  at          text not null,
  text        text not null,
  pictures    integer not null default 0, -- how many came with it
  thread      text not null default '',   -- where it was said; empty: not in a thread
  answered_at text not null default '',
  answered_by text not null default '',
  answerer    text not null default '',   -- as they were called then
  answer      text not null default ''    -- empty: read, or answered in the thread
) strict;
create index messages_open on messages (at, n) where answered_at = '';
create index messages_of on messages (commission, n);

-- What is asked of one commission, or of what is still to happen, is found without reading the past.
create index bells_of on bells (commission, seq);
create index bells_to_ring on bells (due_at) where rung_at = '';
create index requests_of on requests (commission, revision);
create index promises_standing on promises (commission) where state in ('offered', 'given');
create index outbox_pending on outbox (lane, n) where sent < version;

-- What is asked of a revision without its quote, whose rows are long.
create index revisions_heads on revisions (commission, revision, state, asked_at, change, issued_at, expires_at, sha256);
