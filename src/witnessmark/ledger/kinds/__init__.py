"""Kinds of entries, group by group: what each says, in which words, and who may write it."""
