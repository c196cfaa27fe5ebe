"""Labels: plain data in, printer dots out. Nothing heavy is imported until a label is made.

``template`` (a TOML file in millimetres) and ``label`` (what it says) go into ``layout`` (boxes
in whole printer dots, pure), ``raster`` draws that layout, ``output`` encodes the picture.
``press`` does all of it in one call; ``printer`` hands it on, by one of ``routes``; ``sheet`` lays
labels out on office paper. This room knows neither the journal nor the rules.
"""
