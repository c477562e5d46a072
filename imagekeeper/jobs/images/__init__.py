"""Files of any container taken in as images, images transformed as wanted, and images written and proved."""
