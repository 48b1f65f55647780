"""What checks share: places, words, histories read again, and what several checks ask of the same sound."""
