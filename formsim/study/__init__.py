"""Studies: many variants of one case, solved side by side and told in one table."""
