"""The use cases of a fill station; the one place where authority and gates are asked."""
