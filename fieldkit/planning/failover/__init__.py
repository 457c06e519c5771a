"""failover"""
