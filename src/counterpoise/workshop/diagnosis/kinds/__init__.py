"""What is not known of a machine: the kinds it may be of, and the planner's rows."""
