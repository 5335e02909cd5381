"""Backup and restore: a copy taken while the pages run, encrypted, and proven when it is read back.

A backup is a folder named by its instant, beside a pool of photos that all backups of a folder share:

    FOLDER/20261128T224107.512Z/store.tar.gz.age   database, anchors, keys
    FOLDER/20261128T224107.512Z/contents.json      what it holds, in plain: counts and hashes
    FOLDER/photos/4f/4f1c….age                     each photo once, under the SHA-256 of its bytes

All is encrypted with age (https://age-encryption.org/v1) for a public key: whoever makes backups cannot read them.
The secret key is written down and kept elsewhere. A folder whose name ends in `.part` was cut off and never counts.
"""
