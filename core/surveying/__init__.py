"""What is this part?"""
