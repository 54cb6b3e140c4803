"""Makes words.bloom from CMUdict's cmudict.dict: python3 make_words.py cmudict.dict

Kept are the entries that are written with the letters a to z only. A word is hashed by 64-bit FNV-1a; its low and high
32 bits, l and h | 1, give six bits: (l + i * (h | 1)) mod 2^20 for i from 0 to 5. Bit n is bit n % 8 of byte n // 8.
"""

import re
import sys

bits = bytearray(1 << 17)
with open(sys.argv[1], encoding="utf-8") as entries:
    words = {line.split()[0] for line in entries if line.strip()}
for word in sorted(word for word in words if re.fullmatch("[a-z]+", word)):
    number = 0xCBF29CE484222325
    for byte in word.encode():
        number = (number ^ byte) * 0x100000001B3 % (1 << 64)
    low, high = number & 0xFFFFFFFF, number >> 32 | 1
    for i in range(6):
        bit = (low + i * high) % (1 << 20)
        bits[bit // 8] |= 1 << bit % 8
with open("words.bloom", "wb") as out:
    out.write(bits)
