"""From evidence to belief, plan, next step and options of a job."""
