"""Kinds of entries, group by group: what each says, of what, in which words, which events it is, who may write it."""
