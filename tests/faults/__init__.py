"""What must be survived: crashes, full disks, locks, clocks, hostile names."""
