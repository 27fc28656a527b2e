"""Access to the page, the rights of its clients, and delivery to slow or hostile clients."""
