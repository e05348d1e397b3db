"""The machine as bodies on springs: simulate, respond, walk, strike."""
