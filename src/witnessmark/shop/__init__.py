"""The web application: thin pages over the core. `scope` says whose data, `store` writes it down."""
