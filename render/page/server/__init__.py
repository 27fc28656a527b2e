"""Who may talk to the page, what each may ask, and how answers reach a slow or hostile client."""
