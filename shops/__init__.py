"""Businesses and their people: who asks, for which shop; the spring list, the tools, the trail."""
