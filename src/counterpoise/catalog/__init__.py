"""What is known of machine families: faults, checks, repairs, access, parts and their sources."""
