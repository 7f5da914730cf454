"""A Modbus device made of pymodbus: its framers, its request decoder, its data store and its payload
builder. Only the bytes are carried here, so no serial library is needed.

    peer.py tcp          listens on a free port of 127.0.0.1 and prints it
    peer.py rtu DEVICE   answers as unit 17 on a terminal and prints "ready"

The image is the same as peer.c: at address 4·n the n-th of all encodings, word orders and byte orders.
"""
import os
import select
import socket
import sys
import tty

from pymodbus.constants import Endian
from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.factory import ServerDecoder
from pymodbus.framer.rtu_framer import ModbusRtuFramer
from pymodbus.framer.socket_framer import ModbusSocketFramer
from pymodbus.payload import BinaryPayloadBuilder

UNIT = 17
REGISTERS = 400
VALUES = [
    ("add_16bit_int", -12345),
    ("add_16bit_uint", 54321),
    ("add_32bit_int", -1234567890),
    ("add_32bit_uint", 3456789012),
    ("add_64bit_int", -1234567890123456),
    ("add_64bit_uint", 9007199254740991),
    ("add_32bit_float", -123.456),
    ("add_64bit_float", -98765.4321),
]


def image():
    registers = [0] * REGISTERS
    address = 0
    for method, value in VALUES:
        for words in (Endian.Big, Endian.Little):
            for swapped in (False, True):
                builder = BinaryPayloadBuilder(byteorder=Endian.Big, wordorder=words)
                getattr(builder, method)(value)
                data = b"".join(builder.build())
                for i in range(0, len(data), 2):
                    order = "little" if swapped else "big"
                    registers[address + i // 2] = int.from_bytes(data[i:i + 2], order)
                address += 4
    return registers


def device():
    def block(values):
        return ModbusSequentialDataBlock(0, values)

    return ModbusSlaveContext(
        co=block([i % 3 == 0 for i in range(2000)]),
        di=block([i % 5 == 0 for i in range(2000)]),
        hr=block(image()),
        ir=block(image()),
        zero_mode=True,
    )


def answers(framer, context, data, send):
    def execute(request):
        response = request.execute(context[request.unit_id])
        response.transaction_id = request.transaction_id
        response.unit_id = request.unit_id
        send(framer.buildPacket(response))

    framer.processIncomingPacket(data, execute, [UNIT], single=False)


def serve_tcp(context):
    listener = socket.create_server(("127.0.0.1", 0))
    print(listener.getsockname()[1], flush=True)
    while True:
        conn, _ = listener.accept()
        conn.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        framer = ModbusSocketFramer(ServerDecoder())
        while True:
            data = conn.recv(1024)
            if not data:
                break
            answers(framer, context, data, conn.sendall)
        conn.close()


def serve_rtu(context, path):
    fd = os.open(path, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(fd)
    print("ready", flush=True)
    framer = ModbusRtuFramer(ServerDecoder())
    while True:
        select.select([fd], [], [])
        answers(framer, context, os.read(fd, 1024), lambda packet: os.write(fd, packet))


if __name__ == "__main__":
    served = ModbusServerContext(slaves={UNIT: device()}, single=False)
    if sys.argv[1] == "tcp":
        serve_tcp(served)
    else:
        serve_rtu(served, sys.argv[2])
