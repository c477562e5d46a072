"""The open layout on disk: inventories, folders, files read and the steps by which they are written; no judgement."""
