"""The customer's answer: pasted by the builder, and entered in the design as a dated record."""
