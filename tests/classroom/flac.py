"""A FLAC file of silence of any length, written by hand (RFC 9639): a constant subframe holds 65,535 samples in a dozen bytes."""


def crc(bits, polynomial, data):
    value, top = 0, 1 << (bits - 1)
    for byte in data:
        value ^= byte << (bits - 8)
        for _ in range(8):
            value = ((value << 1) ^ polynomial if value & top else value << 1) & ((1 << bits) - 1)
    return value


def coded_number(n):
    """RFC 9639 9.1.5: as UTF-8 codes a character, up to 36 bits."""
    if n < 0x80:
        return bytes([n])
    tail = []
    lead, room = 0xC0, 5
    while True:
        tail.append(0x80 | n & 0x3F)
        n >>= 6
        if n < 1 << room:
            return bytes([lead & 0xFF | n] + tail[::-1])
        lead, room = (lead >> 1) | 0x80, room - 1


def silence(seconds, rate=8000, block=65535):
    frames = int(seconds * rate / block)
    # STREAMINFO, last block: least and most block size, frame sizes unknown, rate, mono, 16 bit, samples, no MD5.
    bits = (rate << 44) | (0 << 41) | (15 << 36) | (frames * block)
    info = block.to_bytes(2, "big") * 2 + bytes(6) + bits.to_bytes(8, "big") + bytes(16)
    out = bytearray(b"fLaC\x80" + len(info).to_bytes(3, "big") + info)
    for number in range(frames):
        # Sync and fixed block size; block size in 16 bits that follow, rate of STREAMINFO; mono, 16 bit.
        head = b"\xff\xf8\x70\x08" + coded_number(number) + (block - 1).to_bytes(2, "big")
        head += bytes([crc(8, 0x07, head)])
        frame = head + b"\x00\x00\x00"  # constant subframe, value 0
        out += frame + crc(16, 0x8005, frame).to_bytes(2, "big")
    return bytes(out)
