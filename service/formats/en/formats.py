"""English times without full stops ("2:20 PM"): one at the end of a sentence would stand beside the sentence's own."""

TIME_FORMAT = "g:i A"
DATETIME_FORMAT = "N j, Y, g:i A"
SHORT_DATETIME_FORMAT = "m/d/Y g:i A"
