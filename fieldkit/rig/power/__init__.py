"""power"""
