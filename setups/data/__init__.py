"""The business's data in and out: lists as spreadsheet files, the whole business as open files, backups, erasure."""
