/* Where the frames of a program lie, for gcc's unwinder: it asks glibc (2.35 and newer), and musl has no such function. The
 * struct is that of glibc's <dlfcn.h> on x86-64, where an object has no base for its data. `tests/platforms static` builds it. */
#define _GNU_SOURCE
#include <link.h>
#include <stddef.h>

struct object {
    unsigned long long flags;
    void *start, *end;
    struct link_map *map;
    void *frames;
    unsigned long long reserved[7];
};

struct search {
    ElfW(Addr) place;
    struct object *object;
};

/* Not 0, which ends the search, where a segment of this object has the place and the object has a table of frames. */
static int within(struct dl_phdr_info *info, size_t size, void *data) {
    struct search *search = data;
    ElfW(Addr) frames = 0;
    int found = 0;
    (void)size;
    for (int n = 0; n < info->dlpi_phnum; n++) {
        const ElfW(Phdr) *header = &info->dlpi_phdr[n];
        ElfW(Addr) start = info->dlpi_addr + header->p_vaddr;
        if (header->p_type == PT_LOAD && search->place - start < header->p_memsz) {
            found = 1;
            search->object->start = (void *)start;
            search->object->end = (void *)(start + header->p_memsz);
        } else if (header->p_type == PT_GNU_EH_FRAME) {
            frames = start;
        }
    }
    search->object->frames = (void *)frames;
    return found && frames != 0;
}

int _dl_find_object(void *place, struct object *object) {
    struct search search = {(ElfW(Addr))place, object};
    *object = (struct object){0};
    return dl_iterate_phdr(within, &search) ? 0 : -1;
}
