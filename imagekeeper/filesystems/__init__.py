"""What is on a disk: volumes, directories, files, and what is wrong with them; bytes in, values out."""
