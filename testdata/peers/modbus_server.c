/* Modbus server for tests, on libmodbus.
 *
 * usage: modbus_server tcp PORT
 *        modbus_server rtu DEVICE BAUD UNIT
 *
 * Register a of both tables holds 1000*UNIT + a (UNIT is 1 for tcp), for a
 * below 200, except 10..17 of the holding registers, which hold the number
 * 1234.5 in several forms. Coil and input a is set when a is a multiple of 3.
 */
#include <modbus/modbus.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void fill(modbus_mapping_t *m, int unit)
{
	int a;
	/* this machine is little endian */
	union { float number; uint16_t words[2]; } f = { .number = 1234.5f };
	union { double number; uint16_t words[4]; } d = { .number = 1234.5 };

	for (a = 0; a < 200; a++) {
		m->tab_registers[a] = 1000 * unit + a;
		m->tab_input_registers[a] = 1000 * unit + a;
		m->tab_bits[a] = a % 3 == 0;
		m->tab_input_bits[a] = a % 3 == 0;
	}
	m->tab_registers[10] = m->tab_registers[13] = f.words[1];
	m->tab_registers[11] = m->tab_registers[12] = f.words[0];
	for (a = 0; a < 4; a++)
		m->tab_registers[14 + a] = d.words[3 - a];
}

static void answer(modbus_t *ctx, modbus_mapping_t *m)
{
	uint8_t query[MODBUS_TCP_MAX_ADU_LENGTH];
	int n;

	while ((n = modbus_receive(ctx, query)) >= 0)
		if (n > 0)
			modbus_reply(ctx, query, n, m);
}

int main(int argc, char **argv)
{
	int unit = argc > 4 ? atoi(argv[4]) : 1;
	modbus_mapping_t *m = modbus_mapping_new(200, 200, 200, 200);
	modbus_t *ctx;

	if (argc < 3 || m == NULL)
		return 2;
	fill(m, unit);
	if (strcmp(argv[1], "tcp") == 0) {
		ctx = modbus_new_tcp("127.0.0.1", atoi(argv[2]));
		int s = modbus_tcp_listen(ctx, 4);
		puts("ready");
		fflush(stdout);
		for (;;) {
			if (modbus_tcp_accept(ctx, &s) < 0)
				return 1;
			answer(ctx, m);
			modbus_close(ctx);
		}
	}
	ctx = modbus_new_rtu(argv[2], atoi(argv[3]), 'N', 8, 1);
	modbus_set_slave(ctx, unit);
	if (modbus_connect(ctx) < 0)
		return 1;
	puts("ready");
	fflush(stdout);
	for (;;) {
		answer(ctx, m);
		usleep(10000);
	}
}
