"""How the work goes: times at steps, photos taken again, findings, scale cards."""
