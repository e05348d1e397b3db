"""Who works here: names, roles and what each may do, how a secret is kept, who is acting now."""
