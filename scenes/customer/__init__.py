"""What a customer reads of a design and answers: notes, the number of what is seen, the reply."""
