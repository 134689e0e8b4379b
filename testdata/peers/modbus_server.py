"""Modbus server for tests, on python3-pymodbus 3.0.

usage: /usr/bin/python3 modbus_server.py tcp PORT
       /usr/bin/python3 modbus_server.py rtutcp PORT
       /usr/bin/python3 modbus_server.py rtu DEVICE BAUD

Units 1 and 2 exist; any other unit stays silent. Unit u holds in register a
of both tables the value 1000*u + a, for a below 200, except 10..17 of the
holding registers, which hold the number 1234.5 in several forms. Coil and
input a is set when a is a multiple of 3.
"""
import struct
import sys

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartSerialServer, StartTcpServer
from pymodbus.transaction import ModbusRtuFramer


def words(data):
    return list(struct.unpack(">%dH" % (len(data) // 2), data))


def unit(u):
    holding = [1000 * u + a for a in range(200)]
    abcd = words(struct.pack(">f", 1234.5))
    holding[10:12] = abcd
    holding[12:14] = abcd[::-1]
    holding[14:18] = words(struct.pack(">d", 1234.5))
    bits = [a % 3 == 0 for a in range(200)]
    return ModbusSlaveContext(
        di=ModbusSequentialDataBlock(0, bits),
        co=ModbusSequentialDataBlock(0, bits),
        hr=ModbusSequentialDataBlock(0, holding),
        ir=ModbusSequentialDataBlock(0, [1000 * u + a for a in range(200)]),
        zero_mode=True,
    )


context = ModbusServerContext(slaves={1: unit(1), 2: unit(2)}, single=False)
kind, where = sys.argv[1], sys.argv[2]
print("ready", flush=True)
if kind == "tcp":
    StartTcpServer(context=context, address=("127.0.0.1", int(where)), ignore_missing_slaves=True)
elif kind == "rtutcp":
    StartTcpServer(context=context, address=("127.0.0.1", int(where)), framer=ModbusRtuFramer, ignore_missing_slaves=True)
elif kind == "rtu":
    StartSerialServer(context=context, port=where, baudrate=int(sys.argv[3]), bytesize=8, parity="N", stopbits=1,
                      framer=ModbusRtuFramer, ignore_missing_slaves=True)
else:
    sys.exit(__doc__)
