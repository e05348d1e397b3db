"""A machine's spin summed up in figures and sentences, sound and with faults."""
