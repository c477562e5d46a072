"""Built-in checks of ROM images: which hold, and how likely each is to hold by chance."""
