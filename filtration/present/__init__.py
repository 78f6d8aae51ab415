"""The answer in words, tables, pictures and documents."""
