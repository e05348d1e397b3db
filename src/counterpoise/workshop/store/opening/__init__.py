"""The store's doorstep: whose file it is, who may read it, and what the database says in words."""
