"""A person's own rows of the tables: found beside the archive and in the person's folder, proved, and put in force."""
