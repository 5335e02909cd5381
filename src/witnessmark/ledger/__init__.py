"""The ledger: what happened, what is open, what may pass. Entries in, open items and verdicts out.

`entry` makes and reads entries, `bodies` says what each kind holds, `seal` chains them on receipt, `effects`
compiles a book to a table, `fold` reads entries against that table, `gates` judges, `verify` finds tampering.
"""
