-- Rows of revisions are long; what is asked of them after every act is found without reading them.
create index revisions_issued on revisions (commission, issued_at);
create index revisions_ending on revisions (state, expires_at);
