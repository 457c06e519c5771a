"""dialogs"""
