"""The listener's chair page and the operator's desk page, served from this machine. The only user of starlette."""
