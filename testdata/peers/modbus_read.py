"""Reads a Modbus TCP device with pymodbus and prints JSON.

    python3 modbus_read.py host port unit table address count
"""
import json
import sys

from pymodbus.client import ModbusTcpClient

host, port, unit, table, address, count = sys.argv[1:7]
client = ModbusTcpClient(host, port=int(port), timeout=3)
if not client.connect():
    sys.exit(f"no connection to {host}:{port}")
read = {
    "coil": client.read_coils,
    "discrete": client.read_discrete_inputs,
    "holding": client.read_holding_registers,
    "input": client.read_input_registers,
}[table]
answer = read(int(address), int(count), slave=int(unit))
if answer.isError():
    print(json.dumps({"exception": getattr(answer, "exception_code", -1)}))
else:
    values = answer.bits[: int(count)] if table in ("coil", "discrete") else answer.registers
    print(json.dumps({"values": [int(v) for v in values]}))
client.close()
