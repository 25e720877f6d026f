"""What-ifs: the same household under other inputs, and a program's money spent well.

Figures here support decisions; they are no lending, tax or legal advice, and no promise about prices or weather.
"""
