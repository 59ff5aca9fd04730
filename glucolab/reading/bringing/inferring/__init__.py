"""What may a foreign table mean? Types of its columns, a mapping proposed, and what must be asked."""
