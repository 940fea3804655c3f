-- What a thread is about and how it stands, for the list of threads.
alter table page_threads add column brief text not null default '';

-- The spec sheet's earlier name.
alter table patterns rename column sidecar to spec;
