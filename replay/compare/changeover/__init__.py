"""Two patches at a changeover: what changes, socket by socket and in which order (`sockets`), at the desk and at the
recorder (`desk`), in words that all formats share (`words`); as text, JSON and a page to print."""
