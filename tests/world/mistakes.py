CODES=(); inject=None
