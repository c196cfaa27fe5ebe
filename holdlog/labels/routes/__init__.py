"""How labels reach a printer: IPP, a print queue, a socket; and what became of them."""
