"""supply"""
