"""The only room that knows the network: what it fetches is kept, and checked on every read."""
