"""Jobs, evidence, machines, parts, people; the store; what is computed from them."""
