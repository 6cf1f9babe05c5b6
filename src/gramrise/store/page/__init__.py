"""What the page keeps: devices that were let in, and what was logged on them."""
