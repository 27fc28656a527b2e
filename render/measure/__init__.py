"""What is measured, and made for the project itself: times, agreement, gallery, thumbnails."""
