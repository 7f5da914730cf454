/* A Modbus device made of libmodbus: its framing, its replies and its functions that put numbers into
 * registers.
 *
 *     peer tcp          listens on a free port of 127.0.0.1 and prints it
 *     peer rtu DEVICE   answers as unit 17 on a terminal and prints "ready"
 *
 * The image is the same as peer.py: at address 4·n the n-th of all encodings, word orders and byte orders.
 */
#include <errno.h>
#include <modbus.h>
#include <netinet/in.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { UNIT = 17, REGISTERS = 400, BITS = 2000 };

static uint16_t *at;

/* order puts n words, high word first, in the order wanted. */
static void order(const uint16_t *words, int n, int low_first, int swapped)
{
    for (int i = 0; i < n; i++) {
        uint16_t w = words[low_first ? n - 1 - i : i];
        at[i] = swapped ? (uint16_t)(w << 8 | w >> 8) : w;
    }
    at += 4;
}

static void integer(int64_t v, int words, int low_first, int swapped)
{
    uint16_t w[4];
    if (words == 1)
        w[0] = (uint16_t)v;
    else if (words == 2)
        MODBUS_SET_INT32_TO_INT16(w, 0, v);
    else
        MODBUS_SET_INT64_TO_INT16(w, 0, v);
    order(w, words, low_first, swapped);
}

static void image(uint16_t *registers)
{
    static const struct { int64_t v; int words; } integers[] = {
        {-12345, 1}, {54321, 1}, {-1234567890, 2}, {3456789012, 2},
        {-1234567890123456, 4}, {9007199254740991, 4},
    };
    at = registers;
    for (size_t i = 0; i < sizeof integers / sizeof *integers; i++)
        for (int o = 0; o < 4; o++)
            integer(integers[i].v, integers[i].words, o >> 1, o & 1);

    /* The library's functions named by byte order mean another order in every few releases (its issues
     * 358, 665 and 838); modbus_set_float has always put the low word first. */
    const float f = -123.456f;
    uint16_t low_first[2], high_first[2];
    modbus_set_float(f, low_first);
    high_first[0] = low_first[1], high_first[1] = low_first[0];
    for (int o = 0; o < 4; o++)
        order(high_first, 2, o >> 1, o & 1);

    double d = -98765.4321;
    int64_t p;
    memcpy(&p, &d, sizeof p);
    for (int o = 0; o < 4; o++)
        integer(p, 4, o >> 1, o & 1);
}

static void serve(modbus_t *ctx, modbus_mapping_t *map)
{
    uint8_t query[MODBUS_TCP_MAX_ADU_LENGTH];
    for (;;) {
        int n = modbus_receive(ctx, query);
        if (n == -1 && errno != EMBBADCRC)
            return;
        if (n > 0)
            modbus_reply(ctx, query, n, map);
    }
}

int main(int argc, char **argv)
{
    modbus_mapping_t *map = modbus_mapping_new(BITS, BITS, REGISTERS, REGISTERS);
    image(map->tab_registers);
    image(map->tab_input_registers);
    for (int i = 0; i < BITS; i++) {
        map->tab_bits[i] = i % 3 == 0;
        map->tab_input_bits[i] = i % 5 == 0;
    }
    if (argc == 3 && strcmp(argv[1], "rtu") == 0) {
        modbus_t *ctx = modbus_new_rtu(argv[2], 19200, 'N', 8, 1);
        modbus_set_slave(ctx, UNIT);
        if (modbus_connect(ctx) == -1) {
            fprintf(stderr, "%s: %s\n", argv[2], modbus_strerror(errno));
            return 1;
        }
        puts("ready");
        fflush(stdout);
        for (;;)
            serve(ctx, map);
    }
    modbus_t *ctx = modbus_new_tcp("127.0.0.1", 0);
    int listener = modbus_tcp_listen(ctx, 4);
    struct sockaddr_in address;
    socklen_t size = sizeof address;
    if (listener == -1 || getsockname(listener, (struct sockaddr *)&address, &size) == -1) {
        perror("listen");
        return 1;
    }
    printf("%d\n", ntohs(address.sin_port));
    fflush(stdout);
    for (;;) {
        if (modbus_tcp_accept(ctx, &listener) == -1)
            return 1;
        serve(ctx, map);
        modbus_close(ctx);
    }
}
