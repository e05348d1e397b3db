"""A machine as numbers: masses, springs, dampers; families of machines and their faults."""
