"""A recorded set of jobs, to hold two states of the program against each other."""
