"""Lists of jobs, made of their kept rows: none of them reads or plans a job."""
